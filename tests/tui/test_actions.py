"""The table of actions feeds bindings, footer, help and palette; so it must be right in itself."""

import pytest

from companion.tui.actions import ACTIONS, BY_ID, PLACES, TYPING_PLACES
from companion.tui.keymap import PAGE_KEYS, Keymap, allowed_key, is_text, key_words
from companion.tui.screens.ask import AskScreen
from companion.tui.screens.chords import ChordsScreen
from companion.tui.screens.first_pages import FirstScreen
from companion.tui.screens.keyboards import KeyboardsScreen
from companion.tui.screens.microphone import MicrophoneScreen
from companion.tui.screens.performance import PerformanceScreen
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.read import ReadScreen, help_text
from companion.tui.screens.songs import SongsScreen
from companion.tui.screens.stand import StandScreen
from companion.tui.screens.today import TodayScreen
from companion.tui.screens.writing import WritingScreen
from companion.tui.widgets.foot import foot_row

SCREENS = {
    "songs": SongsScreen,
    "stand": StandScreen,
    "today": TodayScreen,
    "keyboards": KeyboardsScreen,
    "chords": ChordsScreen,
    "writing": WritingScreen,
    "first": FirstScreen,
    "microphone": MicrophoneScreen,
    "performance": PerformanceScreen,
    "pick": PickScreen,
    "ask": AskScreen,
    "read": ReadScreen,
}


def test_every_action_has_words_places_and_usable_keys():
    for action in ACTIONS:
        assert action.words and action.words[0].isupper() and not action.words.endswith("."), action
        assert action.where and set(action.where) <= set(PLACES), action
        assert action.keys or action.listed, action
        assert all(allowed_key(key) or key in PAGE_KEYS for key in action.keys), action


def test_every_action_is_done_by_the_screens_it_works_in():
    for action in ACTIONS:
        for place in action.where:
            assert callable(getattr(SCREENS[place], f"action_{action.method.split('(')[0]}")), (action, place)


@pytest.mark.parametrize("place", PLACES)
def test_no_key_does_two_things_in_one_place(place):
    keymap = Keymap()
    keys = [key for action in keymap.actions(place) for key in keymap.keys(action, place)]
    assert len(keys) == len(set(keys))


def test_ids_are_unique():
    assert len(BY_ID) == len(ACTIONS)


@pytest.mark.parametrize("place", PLACES)
def test_every_action_can_be_reached(place):
    keymap = Keymap()
    for action in keymap.actions(place):
        assert keymap.keys(action, place) or (place == "stand" and action.listed)


def test_in_the_list_of_all_else_each_letter_takes_one_thing():
    letters = [action.listed for action in ACTIONS if action.listed]
    assert len(set(letters)) == len(letters) and all(len(letter) == 1 and letter != "q" for letter in letters)


def test_letters_of_the_stand_are_for_what_is_done_while_playing():
    """Every other thing is in the list; a new action with a letter must be added here with a reason to do it with the hands on the keys."""
    letters = {key for action in Keymap().actions("stand") for key in action.keys if len(key) == 1 and key.isalpha()}
    tempo, loop, sounds, shows = set("sfSFt"), set("laz"), set("pcbd"), set("hvwx")
    # u: a wrong key is taken back as the music goes on; n: so is told that a pass broke off; e: from one thing of Today's to the next
    assert letters == tempo | loop | sounds | shows | set("mroqune")


@pytest.mark.parametrize("place", TYPING_PLACES)
def test_where_one_types_no_letter_is_a_command(place):
    keymap = Keymap()
    assert not any(is_text(key) for action in keymap.actions(place) for key in keymap.keys(action, place))


@pytest.mark.parametrize("place", ["songs", "stand", "pick"])
def test_the_help_names_every_key(place):
    text = help_text(Keymap(), place)
    keymap = Keymap()
    for action in keymap.actions(place):
        line = next(line for line in text.splitlines() if line.endswith(f"  {action.words}"))
        assert line.strip() == f"{keymap.key_list(action, place) or action.listed}  {action.words}"


def test_the_help_has_the_cautions():
    text = help_text(Keymap(), "stand")
    for word in ("hurts", "half hour", "stretch", "headphones", "physician", "teacher"):
        assert word in text


def test_the_students_own_keys_go_everywhere():
    keymap = Keymap({"start-stop": ("p", "space"), "pattern": ("g",)})
    assert not keymap.faults, "p is free, as the pattern has another key"
    assert keymap.keys(BY_ID["start-stop"], "stand") == ("p", "space")
    assert "p or space  Start at" in help_text(keymap, "stand")
    assert foot_row(keymap, "stand", 80)[2][0].strip() == "p"


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"strat": ("p",)}, "no such action"),
        ({"click": ("ctrl+x",)}, "not a usable key"),
        ({"click": ("b",)}, "is the key for bass"),
        ({"click": ()}, "no key is left"),
        ({"put": ("p",)}, "no key is left"),
    ],
)
def test_a_wish_that_cannot_be_met_is_said_and_left_out(wish, words):
    keymap = Keymap(wish)
    (fault,) = keymap.faults
    assert words in fault and "\n" not in fault
    assert all(keymap.all_keys(action) == action.keys for action in ACTIONS)


def test_two_actions_may_exchange_their_keys():
    keymap = Keymap({"click": ("b",), "bass": ("c",)})
    assert not keymap.faults
    assert keymap.keys(BY_ID["bass"], "stand") == ("c",)


def test_two_wishes_for_one_key_leave_one_of_them_out():
    keymap = Keymap({"click": ("g",), "bass": ("g",)})
    assert len(keymap.faults) == 1
    assert keymap.keys(BY_ID["click"], "stand") == ("c",)
    assert keymap.keys(BY_ID["bass"], "stand") == ("g",)


def test_the_footer_keeps_to_the_width():
    for place in PLACES:
        for width in (1, 10, 40, 80, 120):
            assert sum(len(text) for text, _ in foot_row(Keymap(), place, width)) <= width, (place, width)


def test_keys_are_called_what_their_caps_say():
    assert [key_words(key) for key in ("escape", "f1", "S", "s", "left")] == ["esc", "F1", "shift S", "s", "←"]
    assert not allowed_key("ctrl+c") and not allowed_key("f13") and not allowed_key("é")
