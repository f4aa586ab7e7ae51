"""Lets the tests of this room share the pretended workshop."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def shop():
    path = Path(__file__).with_name("shop.py")
    spec = importlib.util.spec_from_file_location("trials_shop", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["trials_shop"] = module
    spec.loader.exec_module(module)
    return module
