"""When a rest is offered.

Alone, rest some 5 minutes after 25 minutes of playing: Klickstein 2011 (musiciansway.com), who reports that medical
authorities advise about 10 minutes of rest in each hour. It is an offer: the companion gives no medical advice, and
pain or numbness that stays is for a doctor.
"""

REST_AFTER_MIN = 25.0
REST_MIN = 5.0


def rest_is_due(played_min: float) -> bool:
    """Whether to offer a rest. played_min: minutes of playing since the last one."""
    return played_min >= REST_AFTER_MIN
