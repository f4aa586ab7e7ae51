"""`python -m analysis.training --out DIR`: train the opening network and write it."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import torch

from analysis.training.export import write_network
from analysis.training.opening_network import OpeningNet
from analysis.training.teaching import TrainingPlan, teach
from analysis.training.weights import read_weights


def main(argv: list[str]) -> int:
    """Train by the arguments given; 0 when the files are written."""
    parser = argparse.ArgumentParser(prog="python -m analysis.training")
    parser.add_argument("--out", type=Path, required=True, help="folder to write to")
    parser.add_argument("--steps", type=int, help="so many: makes a run again")
    parser.add_argument("--seconds", type=float, default=450.0, help="without --steps")
    parser.add_argument("--scenes", type=int, default=128, help="of each drawing")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--rate", type=float, default=2e-3, help="of learning")
    parser.add_argument("--area", type=float, default=0.3, help="weight of its error")
    parser.add_argument("--begin", type=Path, help="opening.pt or .onnx to go on with")
    parser.add_argument(
        "--device", default="cuda" if torch.cuda.is_available() else "cpu"
    )
    asked = parser.parse_args(argv)
    plan = TrainingPlan(
        steps=asked.steps,
        seconds=asked.seconds,
        scenes=asked.scenes,
        seed=asked.seed,
        device=asked.device,
        rate=asked.rate,
        area=asked.area,
    )
    begun = (
        OpeningNet()
        if asked.begin is None
        else read_weights(asked.begin, device=asked.device)
    )
    began = time.monotonic()
    net, losses = teach(plan, begun=begun, out=asked.out)
    write_network(net, plan, losses, time.monotonic() - began, asked.out)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
