"""A small made-up workshop for the pages that keep the log."""

from __future__ import annotations

from datetime import date

from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form, FormJoint, Mix
from analysis.services import log as log_service
from analysis.services import records


def workshop(folder, *, pieces=6, forms=("Trough A", "Trough B")):
    """Make a log of one pour of that many pieces, by turns in the forms."""
    log = log_service.open_log(folder)
    joints = tuple(FormJoint(name=name, default_sealing="tape") for name in "lr")
    keys = [
        records.add(log, Form(name=name, joints=joints), save_token=f"form {k}").id
        for k, name in enumerate(forms)
    ]
    mix = records.add(log, Mix(name="grey"), save_token="mix").id
    records.add_pour_with_pieces(
        log,
        Pour(name="11", cast_on=date(2026, 3, 31), mix_id=mix, air_c=11.0),
        [
            Piece(
                name=f"P-{k + 1:03d}",
                pour_id=0,
                form_id=keys[k % len(keys)],
                release_agent="oil",
                joints=tuple(
                    JointState(joint=name, sealing="tape", leak="none") for name in "lr"
                ),
                steps=(Step(method="table", seconds=40.0),),
            )
            for k in range(pieces)
        ],
        save_token="pour",
    )
    return log
