"""Answers to the questions of the templates, for tests that need a plan of each."""

from handsfree.planfile.template import Sort
from handsfree.show import new_plan_questions

HEAD = {"plan_name": "Job", "engine_name": "Twin", "cylinders": "2", "bore": "4.030 in"}


def some_answers(names, **more):
    """Some answer to every question of the templates, in growing order so that limits are limits."""
    given = dict(HEAD)
    for number, question in enumerate(new_plan_questions(names)):
        if question.key in given or question.default("thou") or question.optional:
            continue
        sizes = {
            "bore_least": "4.029 in",
            "bore_most": "4.031 in",
            "main_journal": "2.1 in",
            "rod_journal": "2 in",
            "shim_least": "80",
            "shim_most": "120",
            "shim_step": "2",
            "shim_usual": "100",
        }
        given[question.key] = sizes.get(
            question.key, "5" if question.sort is Sort.COUNT else f"{10 + number} thou"
        )
    return {**given, **more}
