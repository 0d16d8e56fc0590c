"""Everything a key can do, in one table. It feeds the bindings, the footer, the help and the command palette."""

from __future__ import annotations

from dataclasses import dataclass

PLACES = {
    "songs": "The songs",
    "stand": "The stand",
    "today": "Today",
    "keyboards": "The keyboards",
    "chords": "Chords in root position",
    "performance": "A performance",
    "writing": "Writing a song",
    "first": "First use",
    "microphone": "The microphone",
    "pick": "A list to choose from",
    "ask": "A line to type",
    "read": "A page to read",
}
TYPING_PLACES = ("songs", "writing", "ask")  # letters, digits and space are text there


@dataclass(frozen=True, slots=True)
class Action:
    """id: the name in settings; keys: as Textual names them; words: for the help; where: places it works in;
    foot: one or two words for the footer, "" to leave it out; call: what it calls, with arguments, where that is not its id; offered: it is
    in footer and palette only while there is something for it; listed: its letter in the list of all that is not done while playing, where it
    needs no key of its own."""

    id: str
    keys: tuple[str, ...]
    words: str
    where: tuple[str, ...]
    foot: str = ""
    call: str = ""
    offered: bool = False
    listed: str = ""

    @property
    def palette(self) -> bool:
        """Whether the command palette offers it: not the arrows, which mean nothing there."""
        return not set(self.keys) & {"up", "down", "left", "right"}

    @property
    def method(self) -> str:
        """The screen's method behind it is called action_<method>; arguments may follow in brackets."""
        return self.call or self.id.replace("-", "_")


_STAND = ("stand",)
_TEMPO_PLACES = ("stand", "chords")
ACTIONS: tuple[Action, ...] = (
    Action(
        "help",
        ("f1",),
        "Help for where you are",
        ("songs", "stand", "today", "keyboards", "chords", "performance", "writing", "first", "microphone", "pick"),
        "help",
    ),
    Action(
        "microphone",
        ("f12",),
        "The microphone off, or on",
        ("songs", "stand", "today", "keyboards", "chords", "performance", "writing", "first", "microphone"),
    ),
    Action("up", ("up",), "Up the list", ("songs", "today", "keyboards", "performance")),
    Action("down", ("down",), "Down the list", ("songs", "today", "keyboards", "performance")),
    # the songs
    Action("put", ("enter",), "Put the song on the stand", ("songs",), "play it"),
    Action("clear", ("escape",), "Clear what you typed, or go back to the stand", ("songs",)),
    Action("write", ("f6",), "Write a song bar by bar, or go on with a draft", ("songs",), "new song"),
    Action("change-song", ("f7",), "Change this song, bar by bar", ("songs",), "change"),
    Action(
        "import-song",
        ("f8",),
        "Import a lead sheet (MusicXML or ABC), or a song sent to you (.zip)",
        ("songs",),
        "import",
    ),
    Action("order", ("f9",), "Another order of the songs: by difficulty, title or tempo", ("songs",), "order"),
    # writing a song
    Action("next-bar", ("enter",), "The next bar (so does |)", ("writing",)),
    Action("bar-before", ("left",), "The bar before", ("writing",)),
    Action("bar-after", ("right",), "The bar after", ("writing",)),
    Action("line-before", ("up",), "The line above", ("writing",)),
    Action("line-after", ("down",), "The line below", ("writing",)),
    Action("save", ("f2",), "Save the song into your own folder", ("writing",), "save"),
    Action("hear", ("f3",), "Hear this bar with its shells", ("writing",), "hear"),
    Action("line", ("tab",), "Type the notes under the chords, or the chords again", ("writing",), "notes/chords"),
    Action("new-section", ("f4",), "A new section behind this one", ("writing",), "section"),
    Action("song-menu", ("f5",), "Title, key, meter, tempo, form, another key, and this section", ("writing",), "song"),
    Action("take-back", ("f6",), "Take the last change back", ("writing",), "undo"),
    Action("do-again", ("f7",), "Do again what was taken back", ("writing",), "redo"),
    Action("copy", ("f8",), "Mark bars from here on; pressed again: copy them", ("writing",), "copy"),
    Action("paste", ("f9",), "Put the copied bars in here", ("writing",), "paste"),
    Action("leave-writing", ("escape",), "Back to the songs; what is not saved is kept", ("writing",), "songs"),
    # the stand: playing
    Action("start-stop", ("space",), "Start at the loop's first bar, or stop", _STAND, "start/stop"),
    Action(
        "play-here",
        ("enter",),
        "Start at the marked bar; without a keyboard also: it ran, but for what slipped",
        _STAND,
    ),
    Action(
        "alone",
        ("r",),
        "Just the change that slipped, or back to the loop before",
        _STAND,
        "what slipped",
        offered=True,
    ),
    Action("earlier", ("left",), "Mark the bar before (while stopped)", _STAND, call="mark_bar(-1)"),
    Action("later", ("right",), "Mark the bar after", _STAND, call="mark_bar(1)"),
    Action("line-up", ("up",), "Mark the bar four before", _STAND, call="mark_bar(-4)"),
    Action("line-down", ("down",), "Mark the bar four after", _STAND, call="mark_bar(4)"),
    # the stand: practising
    Action("practise", ("m",), "Choose how to practise", _STAND, "practise"),
    Action(
        "all-else", ("o",), "All that is not done while playing, as a list", _STAND, "more", call="list('all_else')"
    ),
    Action("need", ("v",), "What the middle shows: the keyboard, or another thing", _STAND),
    Action("hands", (), "Choose the hands you play with", _STAND, call="list('hands')", listed="h"),
    Action("peek", ("h",), "Look at the hidden bar for a moment (it counts as a slip)", _STAND),
    Action("slip", ("tab",), "Without a keyboard: this bar slipped", _STAND),
    Action("broke-off", ("n",), "Without a keyboard: the pass broke off", _STAND),
    Action(
        "next-item",
        ("e",),
        "Go on with what comes next today",
        ("stand", "chords", "performance"),
        "today's next",
        offered=True,
    ),
    Action("lesson", (), "The song's lesson: what to know and its steps", _STAND, call="list('lesson')", listed="i"),
    Action(
        "today", ("f3",), "Today: what to practise in the minutes you have", ("songs", "stand"), "today", listed="t"
    ),
    Action("progress", ("f4",), "Progress: where the song stands", ("songs", "stand", "chords"), listed="p"),
    Action(
        "keyboards",
        ("f5",),
        "Choose keyboards and where it sounds, tap with the click",
        ("songs", "stand", "chords", "performance", "first"),
        listed="d",
    ),
    Action("song-chords", ("f2",), "This song's chords in root position, before its shells", ("songs",), "chords"),
    # chords in root position
    Action("chords-start", ("space",), "Start, or stop", ("chords",), "start/stop"),
    Action("chords-word", ("enter",), "I have it (where no keyboard is heard)", ("chords",), "I have it"),
    Action("chords-wrong", ("x",), "It was wrong (where no keyboard is heard)", ("chords",), "wrong"),
    Action(
        "chords-look", ("h",), "Show the keys of this chord (it does not count as found at once)", ("chords",), "keys"
    ),
    Action("chords-listen", ("d",), "Hear this chord", ("chords",), "hear"),
    Action("chords-choose", ("m",), "Choose hand, position, way, order and click", ("chords",), "choose"),
    # a performance
    Action(
        "performance",
        (),
        "Give a performance: the whole tune once, recorded and marked",
        _STAND,
        call="list('perform')",
        listed="g",
    ),
    Action("perform", ("space",), "Perform the tune, or stop", ("performance",), "perform/stop"),
    Action("hear-performance", ("enter",), "Hear the marked performance again, or stop", ("performance",), "hear it"),
    Action("performance-marks", ("w",), "What was marked in it", ("performance",), "marks"),
    Action("perform-shows", ("v",), "What you see while you perform", ("performance",), "seen"),
    Action("loop-introduction", ("i",), "The introduction by itself, round and round", ("performance",)),
    Action("loop-ending", ("n",), "The ending by itself, round and round", ("performance",)),
    Action("forget-performance", ("x",), "Throw the marked performance away", ("performance",)),
    # the stand: tempo
    Action("slower", ("s",), "One beat a minute slower", _TEMPO_PLACES, "slower", call="change_tempo(-1)"),
    Action("faster", ("f",), "One beat a minute faster", _TEMPO_PLACES, "faster", call="change_tempo(1)"),
    Action("much-slower", ("S",), "Five beats a minute slower", _TEMPO_PLACES, call="change_tempo(-5)"),
    Action("much-faster", ("F",), "Five beats a minute faster", _TEMPO_PLACES, call="change_tempo(5)"),
    Action("target-tempo", ("t",), "The song's own tempo", _STAND),
    Action("tempo", (), "Type or tap the tempo, double or half", _STAND, call="list('tempo')", listed="m"),
    # the stand: the loop
    Action("next-loop", ("l",), "Loop the next section", _STAND, "loop", call="loop('next')"),
    Action("choose-loop", (), "Choose the section to loop", _STAND, call="list('loops')", listed="l"),
    Action("type-loop", (), "Type the bars to loop: 5-8, A, B 3-4, whole", _STAND, call="list('bars')", listed="y"),
    Action("loop-from", ("a",), "Loop from this bar", _STAND),
    Action("loop-to", ("z",), "Loop up to this bar", _STAND),
    Action("whole-form", (), "Loop the whole form", _STAND, call="loop('whole')", listed="w"),
    # the stand: what sounds
    Action("pattern", ("p",), "The next pattern for the left hand", _STAND, call="turn('pattern')"),
    Action("click", ("c",), "The next click", _STAND, "click", call="turn('click')"),
    Action("bass", ("b",), "The next bass", _STAND, "bass", call="turn('bass')"),
    Action("demonstrate", ("d",), "Hear the shells, or play them alone", _STAND),
    Action("count-in", (), "Count-in: as the tempo asks, or of no, one or two bars", _STAND, listed="n"),
    Action("calls", (), "The changes called aloud, a beat ahead", _STAND, call="list('calls')", listed="c"),
    Action("aloud", (), "After a pass, say aloud what it came to, or not", _STAND, call="list('aloud')", listed="j"),
    Action("volumes", (), "How loud each part is", _STAND, call="list('volumes')", listed="v"),
    Action("beat", (), "The large beat across the top: shown or not", _STAND, listed="b"),
    # the stand: shells and key
    Action("why", ("w",), "Why this shell", _STAND, "why"),
    Action("other-shell", ("x",), "Choose another shell for this chord", _STAND, "other shell"),
    Action("undo", ("u",), "Take back the last change: tempo, loop, key, what sounds, a shell", _STAND, listed="u"),
    Action("fingers", (), "Fingers of your own for the melody of this bar", _STAND, call="list('fingers')", listed="f"),
    Action("swing", (), "Let the melody swing, or play it straight", _STAND, call="list('swing')", listed="s"),
    Action(
        "whole-tune",
        (),
        "The whole tune: company, slides, fills, introduction, ending",
        _STAND,
        call="list('whole_tune')",
        listed="z",
    ),
    Action("key", (), "Choose another key", _STAND, call="list('keys')", listed="k"),
    Action("all-keys", (), "Take the loop through all keys", _STAND, call="list('all_keys')", listed="a"),
    # the stand: what leaves it
    Action("export", (), "Export: a sheet, a MIDI file, a practice track or a text", _STAND, listed="e"),
    Action(
        "send",
        (),
        "For the teacher, or back: song, lesson, shells, report in one file",
        _STAND,
        call="export('send')",
        listed="r",
    ),
    Action("exports-folder", (), "Open the folder that exports land in", _STAND, listed="o"),
    Action("songs", ("escape", "f2"), "Back to the songs, once it is stopped", _STAND, "songs"),
    # today
    Action("start-item", ("enter", "space"), "Start it", ("today",), "start"),
    Action("fewer-minutes", ("left",), "A plan for fewer minutes", ("today",), "minutes"),
    Action("more-minutes", ("right",), "A plan for more minutes", ("today",), "more"),
    Action("tick", ("tab",), "Tick it off by hand, or take the tick away", ("today",), "tick"),
    Action("plan-afresh", ("f6",), "Make a new plan", ("today",), "new plan"),
    Action("leave-today", ("escape",), "Back", ("today",), "back", call="leave"),
    Action(
        "turn-forward",
        ("pagedown",),
        "Page turner, forward: start, or stop (F5 sets what it does)",
        ("stand", "keyboards"),
        call="turned('down')",
    ),
    Action(
        "turn-back",
        ("pageup",),
        "Page turner, back: loop the next section (F5 sets what it does)",
        ("stand", "keyboards"),
        call="turned('up')",
    ),
    # keyboards
    Action(
        "lead",
        ("l",),
        "Lead the music from the piano: learn a key, a pedal or a page turner",
        ("keyboards",),
        "lead from the piano",
    ),
    Action("forget-lead", ("x",), "Forget what was learned for this (while it is being learned)", ("keyboards",)),
    Action("listen", ("enter",), "Listen to it or no longer; sound there", ("keyboards",), "choose"),
    Action("listen-to-all", ("a",), "Listen to every keyboard there is", ("keyboards",), "all"),
    Action("tap-start", ("t",), "Tap with the click, to measure what your keyboard is late by", ("keyboards",), "tap"),
    Action("tap", ("space",), "Tap on the computer's keyboard", ("keyboards",)),
    Action("leave", ("escape", "q"), "Back", ("keyboards", "chords", "performance", "microphone"), "back"),
    # first use
    Action("first-hear", ("space",), "Hear a shell", ("first",), "hear it", offered=True),
    Action("first-next", ("enter",), "Keep this, and go on", ("first",), offered=True),
    Action("first-nothing", ("n",), "Nothing is heard: what to do", ("first",), "I hear nothing", offered=True),
    Action("first-skip", ("escape",), "Skip this page, and leave it as it is", ("first",), "skip"),
    Action("first-skip-all", ("x",), "Skip all these pages; they do not come again", ("first",), "skip all"),
    Action("first-look", ("r",), "Look for keyboards again", ("first",), "look again", offered=True),
    Action(
        "first-microphone", ("m",), "An acoustic piano, heard by the microphone", ("first",), "acoustic", offered=True
    ),
    Action("set-up-microphone", ("m",), "Set the microphone up, for an acoustic piano", ("keyboards",), "microphone"),
    Action("microphone-next", ("enter",), "Yes, or go on", ("microphone",), offered=True),
    Action("microphone-headphones", ("h",), "Headphones: nothing comes back", ("microphone",), offered=True),
    Action("microphone-measure", ("space",), "Loudspeakers: measure them", ("microphone",), offered=True),
    Action("microphone-again", ("r",), "The notes from the lowest on", ("microphone",), offered=True),
    Action("microphone-name", ("n",), "Call the piano otherwise", ("microphone",), offered=True),
    Action("microphone-piano", ("p",), "Another piano that was learned", ("microphone",), offered=True),
    # lists and pages
    Action("pick-up", ("up",), "Up", ("pick", "read")),
    Action("pick-down", ("down",), "Down", ("pick", "read")),
    Action("page-down", ("pagedown",), "A page down", ("read",), "page down"),
    Action("page-up", ("pageup",), "A page up", ("read",), "page up"),
    Action("beginning", ("home",), "To the beginning", ("read",), "beginning"),
    Action("ending", ("end",), "To the end", ("read",), "end"),
    Action("less", ("left",), "Less, or the one before", ("pick", "first")),
    Action("more", ("right",), "More, or the one after", ("pick", "first")),
    Action("take", ("enter",), "Take it", ("pick", "ask"), "take"),
    Action("close", ("escape", "q"), "Close without a change", ("pick", "ask"), "close"),
    Action("folder", ("o",), "Open the folder it is in", ("read",), "open its folder", offered=True),
    Action("close-page", ("enter", "escape", "space", "q", "f1"), "Close", ("read",), "close"),
    Action("quit", ("f10",), "Quit", tuple(PLACES), "quit"),
    Action("quit-by-letter", ("q",), "Quit too", _STAND, call="quit"),
)
BY_ID = {action.id: action for action in ACTIONS}
