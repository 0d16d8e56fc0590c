"""Where everything lives. Asking for a path makes no folder."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

APP_NAME = "shell-companion"


@dataclass(frozen=True, slots=True)
class Paths:
    """settings: the student's settings file. songs: the student's own song folder. data: what the companion remembers.
    pins: the student's own choices of shells. exports: what is exported, where no better place is known (see `store.exports`). shipped_songs and shipped_settings come with the program."""

    settings: Path
    songs: Path
    data: Path
    pins: Path
    shipped_songs: Path
    shipped_settings: Path
    exports: Path

    @property
    def log(self) -> Path:
        """The practice log; SQLite keeps two files more beside it while it is open."""
        return self.data / "practice.sqlite3"

    @property
    def running(self) -> Path:
        """Which companions are running; each holds a byte of it."""
        return self.data / "running"

    @property
    def drafts(self) -> Path:
        """Songs being written that were not saved yet."""
        return self.data / "drafts"

    @property
    def own(self) -> Path:
        """What the student made their own about songs, a file a song."""
        return self.data / "own"

    @property
    def performances(self) -> Path:
        """What was recorded of whole tunes, a folder a song."""
        return self.data / "performances"

    @property
    def pianos(self) -> Path:
        """Acoustic pianos that the companion has learned to hear, a file each."""
        return self.data / "pianos"

    @property
    def speech(self) -> Path:
        """What was spoken, kept so that it need not be again."""
        return self.data / "speech"

    @property
    def notes(self) -> Path:
        """Notes of the built-in voices and of SoundFonts, kept so that they need not be made again."""
        return self.data / "notes"

    @property
    def sound_faults(self) -> Path:
        """Why the sound process died or hung, the last times that it did."""
        return self.data / "sound-faults.txt"

    @property
    def cautions_shown(self) -> Path:
        """Exists once the cautions were shown at the first start."""
        return self.data / "cautions-shown"


def find_paths(environ: os._Environ[str] | dict[str, str] = os.environ) -> Paths:
    """The paths in use. COMPANION_HOME puts everything of the student's below one folder; else the system's own
    folders for settings and data are taken."""
    home = environ.get("COMPANION_HOME")
    if home:
        config, data, exports = Path(home) / "config", Path(home) / "data", Path(home) / "exports"
    else:
        import platformdirs  # 9 ms, not needed with COMPANION_HOME

        config = Path(platformdirs.user_config_dir(APP_NAME, appauthor=False))
        data = Path(platformdirs.user_data_dir(APP_NAME, appauthor=False))
        usual = platformdirs.user_music_dir(), platformdirs.user_documents_dir()
        exports = Path(next((folder for folder in usual if os.path.isdir(folder)), os.path.expanduser("~")))
    shipped = shipped_folder()
    return Paths(
        settings=config / "settings.toml",
        songs=Path(home) / "songs" if home else data / "songs",
        data=data,
        pins=config / "pins.toml",
        shipped_songs=shipped / "songs",
        shipped_settings=shipped / "config" / "settings.toml",
        exports=exports,
    )


def shipped_folder() -> Path:
    """The folder with songs/ and config/: inside the package once installed, beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "_shipped"
    return installed if installed.is_dir() else package.parent
