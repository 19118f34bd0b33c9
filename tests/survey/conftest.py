"""Helpers for the readers' tests: read a file, or take the line with which it is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol

import pytest

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.survey_file import read_survey
from dripfield.survey.shots import Survey


class Read(Protocol):
    """Read a survey file: ``given`` goes to ``read_survey``, other keywords to ``[survey]``."""

    def __call__(
        self, path: Path, unit: Unit = ..., given: dict[str, Any] | None = ..., **options: Any
    ) -> Survey: ...


class Refusal(Protocol):
    """Read a survey file and return the whole line with which it is refused."""

    def __call__(
        self, path: Path, unit: Unit = ..., given: dict[str, Any] | None = ..., **options: Any
    ) -> str: ...


def _read(
    path: Path, unit: Unit = Unit.FOOT, given: dict[str, Any] | None = None, **options: Any
) -> Survey:
    return read_survey(path, SurveyTable(points=path.name, **options), unit, **(given or {}))


@pytest.fixture
def read() -> Read:
    return _read


@pytest.fixture
def refusal() -> Refusal:
    def refuse(
        path: Path, unit: Unit = Unit.FOOT, given: dict[str, Any] | None = None, **options: Any
    ) -> str:
        with pytest.raises(InputError) as caught:
            _read(path, unit, given, **options)
        return str(caught.value)

    return refuse
