"""A session at a real bench: microphone, keypad and voice around the pure loop."""

from handsfree.live.events import Ears, LiveEvent, LiveState, Quit, Reached, Steps
from handsfree.live.first_plan import Interview, plan_name, plan_text, questions, write_plan
from handsfree.live.loop import LiveBench
from handsfree.live.mouth import Mouth
from handsfree.live.takes import Take, Takes, Trouble, trouble_with

__all__ = [
    "Ears",
    "Interview",
    "LiveBench",
    "LiveEvent",
    "LiveState",
    "Mouth",
    "Quit",
    "Reached",
    "Steps",
    "Take",
    "Takes",
    "Trouble",
    "plan_name",
    "plan_text",
    "questions",
    "trouble_with",
    "write_plan",
]
