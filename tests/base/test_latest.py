"""An answer is kept while the question is among the last few."""

from companion.base.latest import KEPT, latest


def test_it_works_anew_only_for_another_object() -> None:
    worked: list[tuple] = []

    @latest
    def total(first: tuple[int, ...], second: tuple[int, ...]) -> int:
        worked.append((first, second))
        return sum(first) + sum(second)

    one, two = (1, 2), (3,)
    assert [total(one, two) for _ in range(3)] == [6, 6, 6] and len(worked) == 1
    alike = one[:1] + one[1:]
    assert total(alike, two) == 6 and len(worked) == 2  # equal, but it is not looked into
    assert total(two, two) == 6 and total(one, two) == 6 and len(worked) == 3  # asked in turns
    for _ in range(KEPT):
        assert total(one[:1] + one[1:], two) == 6
    assert total(one, two) == 6 and len(worked) == 3 + KEPT + 1  # only the last few are kept
