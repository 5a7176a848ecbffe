"""Answers saved as sound, for `--say DIR`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from handsfree.commands.outputs import write_output
from handsfree.devices import FolderPlayer
from handsfree.speak import SILENCE, EngineVoice, Reply, Sound, render_answer, wav_bytes


class Sayer:
    """Renders answers into a folder of numbered WAV files; without a folder it does nothing.

    faults: what went wrong with the voice, each once. A voice that fails leaves the tones.
    """

    def __init__(self, folder: Path | None, inputs: Sequence[Path] = ()) -> None:
        """Save into `folder`; never onto the `inputs` of the command."""

        def save(path: Path, sound: Sound) -> None:
            write_output(path, wav_bytes(sound), inputs)

        self._player = FolderPlayer(folder, save) if folder else None
        self._voice = EngineVoice() if folder else None
        self.faults: list[str] = []

    def say(self, reply: Reply) -> str | None:
        """Save one answer; gives the file's name, or None where nothing is said."""
        if self._player is None or reply is SILENCE:
            return None
        answer = render_answer(reply, self._voice)
        if answer.fault and answer.fault not in self.faults:
            self.faults.append(answer.fault)
        self._player.play(answer.sound, reply.text)
        return str(self._player.last) if self._player.last else None

    def __enter__(self) -> Sayer:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._voice is not None:
            self._voice.close()
        if self._player is not None:
            self._player.close()
