"""Plan files and templates: reading, checking, and building the plan."""

from handsfree.planfile.load import load_plan, parse_plan
from handsfree.planfile.template import (
    Question,
    Template,
    chosen,
    filled,
    load_template,
    questions,
    templates,
    unit_of,
    written_answer,
)
from handsfree.planfile.written import written_length

__all__ = [
    "Question",
    "Template",
    "chosen",
    "filled",
    "load_plan",
    "load_template",
    "parse_plan",
    "questions",
    "templates",
    "unit_of",
    "written_answer",
    "written_length",
]
