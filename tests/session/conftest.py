"""The fixtures of a small plan and its journal."""

from tests.support.two_rings import abandon, at, clock, happen, journal, plan, reading

__all__ = ["abandon", "at", "clock", "happen", "journal", "plan", "reading"]
