"""The exact search behind the tie rules, against trying everything."""

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from companion.hands.left.network import Network


@st.composite
def networks(draw):
    """Up to six choices of up to three values with any links between them, double ones and loops included."""
    count = draw(st.integers(1, 6))
    cost = st.integers(0, 9)
    costs = [draw(st.lists(cost, min_size=1, max_size=3)) for _ in range(count)]
    links = []
    for _ in range(draw(st.integers(0, 12))):
        x, y = draw(st.integers(0, count - 1)), draw(st.integers(0, count - 1))
        row = st.lists(cost, min_size=len(costs[y]), max_size=len(costs[y]))
        links.append((x, y, draw(st.lists(row, min_size=len(costs[x]), max_size=len(costs[x])))))
    return costs, links


def total(costs, links, values):
    return sum(row[value] for row, value in zip(costs, values, strict=True)) + sum(
        table[values[x]][values[y]] for x, y, table in links
    )


@settings(max_examples=300)
@given(networks())
def test_no_assignment_costs_less(case):
    costs, links = case
    network = Network(costs)
    for link in links:
        network.join(*link)
    found = network.solve(trials=10_000)
    values = [found[x] for x in range(len(costs))]
    everything = product(*(range(len(row)) for row in costs))
    assert total(costs, links, values) == min(total(costs, links, tried) for tried in everything)


def test_what_is_too_tangled_is_given_up_at_once():
    network = Network([[0, 0]] * 20)
    for x in range(20):
        for y in range(x):
            network.join(x, y, [[x, y], [y, x]])
    assert network.solve(trials=8) is None
