"""A machine that lacks a system library is told which, not shown an import error."""

from __future__ import annotations

import builtins
from collections.abc import Mapping, Sequence
from types import ModuleType

import pytest

from cropper.errors import FinderError
from cropper.subject import engine


def test_a_missing_library_names_the_packages(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def lacking(
        name: str,
        of: Mapping[str, object] | None = None,
        here: Mapping[str, object] | None = None,
        what: Sequence[str] | None = (),
        level: int = 0,
    ) -> ModuleType:
        if name.startswith("mediapipe"):
            raise ImportError("libGL.so.1: cannot open shared object file")
        return real(name, of, here, what, level)

    monkeypatch.setattr(builtins, "__import__", lacking)
    with pytest.raises(FinderError) as caught:
        engine.Engine()
    assert "libgl1" in str(caught.value)
    assert "libglib2.0-0" in str(caught.value)
    assert caught.value.exit_code == 1
