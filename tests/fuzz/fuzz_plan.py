"""Fuzzes the plan's readers, typed text and CSV: what is read is written and read again."""

from fractions import Fraction

import atheris

with atheris.instrument_imports(include=["standclear.timing"]):
    from standclear.timing.errors import TimingError
    from standclear.timing.plan_csv import parse_csv, plan_csv
    from standclear.timing.plan_text import parse_plan
    from standclear.timing.plan_text_writer import plan_text

from tests.fuzz.target import fuzz

RATES = (Fraction(12), Fraction(24), Fraction(24000, 1001), Fraction(1))
SEEDS = (
    "wait 1 s, hold\npeek 12 mm over 0.5 s, ease out\ncreep 80 mm over 4 s, ease both, on twos\n",
    "look up 0.5 s, slow\ndash 92 mm over 0.75 s, ease in\n",
    "tempo 120\nhop 2 beats, bounce\n# a note\n",
)


def one_input(data: bytes) -> None:
    """One plan, as text or as CSV."""
    if not data:
        return
    rate = RATES[data[0] % len(RATES)]
    text = data[1:].decode("utf-8", "replace")
    read = parse_csv if data[0] & 0x80 else parse_plan
    try:
        plan = read(text, rate)
        frames, exposures = plan.frame_count, plan.exposure_count
        spans = plan.spans()
    except TimingError as error:
        if not error.sentence:
            raise
        return
    assert exposures <= frames
    assert len(spans) == len(plan.actions)
    assert parse_plan(plan_text(plan), rate).frame_count == frames, "text is read as it was written"
    assert parse_csv(plan_csv(plan), rate).frame_count == frames, "CSV is read as it was written"


def seeds() -> list[bytes]:
    """The README's plan and more, as text and as CSV."""
    texts = [bytes([0]) + text.encode() for text in SEEDS]
    plans = [parse_plan(text, RATES[0]) for text in SEEDS[:2]]
    return texts + [bytes([0x80]) + plan_csv(plan).encode() for plan in plans]


if __name__ == "__main__":
    fuzz(one_input, seeds())
