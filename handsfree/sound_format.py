"""The format of all sound that is heard and kept: mono, int16, at this rate."""

SAMPLERATE_HZ = 16_000
