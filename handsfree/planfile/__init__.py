"""Plan files and templates: read, checked, and turned into a plan."""

from handsfree.planfile.load import load_plan, parse_plan
from handsfree.planfile.template import (
    Question,
    Template,
    chosen,
    filled,
    load_template,
    questions,
    templates,
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
    "written_answer",
    "written_length",
]
