"""Ears: sound, where speech begins and ends, recognisers and their models."""

from handsfree.hear.heard import SAMPLERATE_HZ, Alternative, Hearing, Recogniser, Samples, Utterance

__all__ = ["SAMPLERATE_HZ", "Alternative", "Hearing", "Recogniser", "Samples", "Utterance"]
