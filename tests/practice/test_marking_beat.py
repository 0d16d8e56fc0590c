"""The beat followed along a take."""

from __future__ import annotations

from companion.practice.marking.beat import follow

# Pulse and second of strokes that are another song's: jumps to and fro, and at the end two stretches of a chord or two, the one begun by a jump.
JUMPS = [
    (60, 6.3746), (61, 7.0032), (64, 8.8803), (66, 10.1263), (67, 10.7542), (68, 11.9966), (70, 13.253), (72, 14.5005),
    (88, 16.3787), (89, 16.9907), (90, 18.2422), (91, 18.8758), (92, 19.5031), (96, 22.0018), (97, 22.6222),
    (98, 23.2536), (99, 23.8704), (100, 24.4996), (101, 25.1191), (100, 27.633), (101, 28.2471), (102, 28.8708),
    (103, 29.5002), (84, 30.7352), (86, 31.9969), (87, 33.2504), (88, 33.8729), (89, 34.5028), (90, 35.1182),
    (91, 35.7476), (92, 36.3792),
]  # fmt: skip
CHORDS = [1, 1, 2, 2, 2, 3, 3, 4, 5, 5, 5, 5, 6, 7, 7, 7, 7, 8, 8, 9, 9, 9, 9, 10, 10, 10, 11, 11, 11, 11, 12]
BEATS_S = [0.6246] * 10 + [0.6247, 0.6249, 0.6247, 0.6249, 0.6251] + [0.6252] * 2 + [0.6253] * 4 + [0.6266] * 5
BEATS_S += [0.6254, 0.6253, 0.6251, 0.6253, 0.6253]
NOT_TRUSTED = {0, 1, 7, 9, 11, 12, 18, 20, 22, 25, 26}  # whose notes did not come


def test_a_break_between_two_short_stretches_at_the_end_goes_once():
    beat = follow(JUMPS, BEATS_S, [8, 19, 23], [n not in NOT_TRUSTED for n in range(len(JUMPS))], CHORDS)
    assert {0, 8, 19, 23} <= set(beat.breaks), "where the player jumped, the beat begins anew"
    assert 26 not in beat.breaks, "the last chords came late, and the beat of the many counts"
