"""A session at a real bench: microphone, keypad and voice around the pure loop."""

from handsfree.live.events import Decoded, LiveEvent, Quit, Spoken, Steps
from handsfree.live.listener import LIVE_TIMING, Listener
from handsfree.live.loop import ROOM_TAIL_S, LiveBench
from handsfree.live.mouth import Mouth
from handsfree.live.state import Ears, LiveState

__all__ = [
    "LIVE_TIMING",
    "ROOM_TAIL_S",
    "Decoded",
    "Ears",
    "Listener",
    "LiveBench",
    "LiveEvent",
    "LiveState",
    "Mouth",
    "Quit",
    "Spoken",
    "Steps",
]
