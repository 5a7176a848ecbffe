"""Who listens: the embedded recogniser, unless another one is asked for."""

from pathlib import Path

import pytest

from handsfree.ears import Choice, Recognisers
from handsfree.hear.models import ENVIRONMENT
from handsfree.planfile import load_plan

PLAN = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")


@pytest.mark.parametrize("choice", [Choice.AUTO, Choice.PHRASE])
def test_the_embedded_recogniser_listens_though_a_vosk_model_is_there(choice, tmp_path, monkeypatch):
    """A model that nobody measured, with neither fit nor margin, must not take over by being found."""
    (tmp_path / "am").mkdir()
    (tmp_path / "am" / "final.mdl").write_bytes(b"a model, by its looks")
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path))
    ear = Recognisers(PLAN, choice).ear(PLAN.checks[0].name)
    assert ear.recogniser.name.startswith("phrase/")
