"""The usual cautions for anyone who plays: shown at the first start and in the help.

Sources: rest and pain, Klickstein, musiciansway.com (2011) and the Peabody Conservatory's practice sheet; level of
sound, NIOSH's recommended limit for the workplace (85 dBA over eight hours), which leisure should stay well below.
"""

CAUTIONS_TITLE = "Before you play"
CAUTIONS = (
    "Stop when it hurts.",
    "Rest about five minutes in every half hour.",
    "Never force a stretch: choose a smaller reach instead.",
    "Keep headphones at a moderate level.",
    "Pain or numbness that stays, or ears that ring, is for a physician or a therapist.",
    "Technique is for a teacher in the room.",
)

REST_TITLE = "Time for a rest"


def rest_text() -> str:
    """What is said after 25 minutes of playing (see practice.rest); an offer, nothing is stopped."""
    rest, pain, teacher = CAUTIONS[1], CAUTIONS[0], CAUTIONS[4]
    return f"You have played for 25 minutes. {rest} Stand up, let the arms hang, look far away.\n\n{pain} {teacher}\n\nSpace goes on."
