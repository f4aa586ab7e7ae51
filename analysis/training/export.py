"""Write a trained network for OpenCV, with the record of its training."""

from __future__ import annotations

import hashlib
import json
import warnings
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import numpy as np
import torch

from analysis.training.opening_network import OpeningNet, weights_of
from analysis.training.random_fields import Dice
from analysis.training.teaching import TrainingPlan, figures_of, patches
from analysis.voids.opening.planes import PATCH_PX, PLANES

if TYPE_CHECKING:
    from pathlib import Path

_CHECK_SEED = 77_000
_LAST = 200


def write_network(
    net: OpeningNet, plan: TrainingPlan, losses: list[float], seconds: float, out: Path
) -> None:
    """Write `opening.onnx`, `opening.json` and `opening.pt` into a folder.

    The last one is for going on with the training.

    Parameters
    ----------
    net : OpeningNet
        On the CPU, ready to be used.
    plan : TrainingPlan
        It was trained by.
    losses : list of float
        Loss of each step.
    seconds : float
        Spent on training.
    out : Path
    """
    out.mkdir(parents=True, exist_ok=True)
    path = out / "opening.onnx"
    write_onnx(net, path)
    torch.save(net.state_dict(), out / "opening.pt")
    fresh = replace(plan, seed=_CHECK_SEED, device="cpu", scenes=min(plan.scenes, 24))
    check = figures_of(net, patches(Dice(_CHECK_SEED, "cpu"), fresh))
    card = torch.cuda.get_device_name(0) if plan.device.startswith("cuda") else "cpu"
    record = {
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "weights": weights_of(net),
        "plan": asdict(replace(plan, steps=len(losses))),
        "seconds": round(seconds),
        "card": card,
        "torch": torch.__version__,
        "data": "drawn by analysis.training.scenes; no photograph",
        "loss_last_steps": float(np.mean(losses[-_LAST:])),
        "fresh_patches": {name: round(value, 4) for name, value in check.items()},
    }
    (out / "opening.json").write_text(json.dumps(record, indent=2) + "\n")


def write_onnx(net: OpeningNet, path: Path) -> None:
    """Write the network in the format that OpenCV reads."""
    with warnings.catch_warnings():
        # The older way of writing needs no further package and gives a plainer file.
        warnings.simplefilter("ignore", DeprecationWarning)
        _export(net, path)


def _export(net: OpeningNet, path: Path) -> None:
    torch.onnx.export(
        net,
        (torch.zeros(2, PLANES, PATCH_PX, PATCH_PX),),
        str(path),
        input_names=["planes"],
        output_names=["opening", "void"],
        dynamic_axes={name: {0: "n"} for name in ("planes", "opening", "void")},
        opset_version=17,
        dynamo=False,
    )
