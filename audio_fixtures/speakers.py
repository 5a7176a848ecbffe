"""The table of speakers: which engine speaks for each, and on which side of the split it stands."""

from __future__ import annotations

from voices import Voice

ENGLISH = [
    *(f"af_{name}" for name in ("alloy", "aoede", "bella", "heart", "jessica", "kore", "nicole", "nova")),
    *(f"af_{name}" for name in ("river", "sarah", "sky")),
    *(
        f"am_{name}"
        for name in ("adam", "echo", "eric", "fenrir", "liam", "michael", "onyx", "puck", "santa")
    ),
    *(f"bf_{name}" for name in ("alice", "emma", "isabella", "lily")),
    *(f"bm_{name}" for name in ("daniel", "fable", "george", "lewis")),
]
# speakers of other languages, reading English: nearer to an accent than to a fault
OTHERS = [
    *("ef_dora", "em_alex", "ff_siwis", "hf_alpha", "hm_omega", "hm_psi", "if_sara", "im_nicola"),
    *("jf_alpha", "jm_kumo", "pf_dora", "pm_alex", "zf_xiaoxiao", "zf_xiaobei", "zm_yunyang", "zm_yunxi"),
]
COMMITTED = {"af_heart", "af_sarah", "am_michael", "bf_emma", "bm_george", "am_liam"}
COMMITTED_HELD_OUT = {"af_bella", "am_puck", "am_fenrir", "bf_isabella", "bm_lewis"}
HELD_OUT = COMMITTED_HELD_OUT | {"af_nova", "bf_lily", "bm_fable", "am_eric"}
FORMANT = [
    *("en-us", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbclan", "en-029", "en-gb-x-gbcwmd"),
    *("en-gb+f2", "en-us+m3", "en-us+f4", "en-gb+m7", "en-us+m1"),
]


def _kokoro(key: str) -> Voice:
    split = "held-out" if key in HELD_OUT else "calibrate"
    kept = key in COMMITTED | COMMITTED_HELD_OUT
    return Voice(f"kokoro-{key}", "kokoro", key, split, natural=True, committed=kept)


VOICES = [
    Voice("flite-slt", "flite", "slt", "calibrate", committed=True),
    Voice("flite-awb", "flite", "awb", "calibrate", committed=True),
    Voice("flite-kal16", "flite", "kal16", "calibrate", committed=True),
    Voice("flite-kal", "flite", "kal", "calibrate"),
    Voice("flite-rms", "flite", "rms", "held-out", committed=True),
    Voice("espeak-gb", "espeak", "en-gb", "calibrate", committed=True),
    Voice("espeak-us-f3", "espeak", "en-us+f3", "held-out", committed=True),
    Voice("festival-slt-hts", "festival", "cmu_us_slt_arctic_hts", "calibrate", committed=True),
    Voice("festival-kal", "festival", "kal_diphone", "calibrate"),
    Voice("festival-ked", "festival", "ked_diphone", "held-out", committed=True),
    Voice("pico-us", "pico", "en-US", "calibrate", committed=True),
    Voice("pico-gb", "pico", "en-GB", "held-out", committed=True),
    Voice("piper-joe", "piper", "en_US-joe-medium", "held-out", natural=True, committed=True),
    Voice("hibari-heart", "hibari", "heart", "calibrate", natural=True),
    *(Voice(f"espeak-{key}", "espeak", key, "calibrate") for key in FORMANT),
    *(_kokoro(key) for key in ENGLISH + OTHERS),
]
