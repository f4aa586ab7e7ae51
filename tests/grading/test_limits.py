"""Every limit of every criterion: at it, just under, just over, with its source."""

from __future__ import annotations

import pytest

from analysis.grading.catalogue import criterion, published
from analysis.grading.grade import class_of

OENORM = "http://sichtbeton-forum.de/oenorm-b2211/"
DBV = "from memory; shares agree with " + OENORM
ACI_347 = "ACI 347.3R-13 Table 3.1d, from memory"
ACI_301 = "https://hillandgriffith.com/post/concrete_formed_surface_classifications_and_specifications"
SP = "https://geostart.ru/doc/read/17687/52"
GOST = "GOST 13015-2003, from memory; widths agree with " + SP
WALLONIA = (
    "http://qc.spw.wallonie.be/fr/qualiroutes/1999/site/j/j.3.3.2.aspectdubeton.htm"
)
USACE = "https://ufgscriteriadocreport.tpub.com/03301A/03301A0040.htm"

# criterion, quantity, limit, class up to the limit, class over it, source
AT_MOST = (
    ("oenorm_b2211_pores", "void_share", 0.003, "P", "2P", OENORM),
    ("oenorm_b2211_pores", "void_share", 0.006, "2P", "3P", OENORM),
    ("oenorm_b2211_pores", "void_share", 0.009, "3P", "worse than 3P", OENORM),
    ("oenorm_b2211_joints", "leak_width_mm", 3.0, "S3", "S2", OENORM),
    ("oenorm_b2211_joints", "leak_width_mm", 10.0, "S2", "S1", OENORM),
    ("oenorm_b2211_joints", "leak_width_mm", 20.0, "S1", "worse than S1", OENORM),
    ("oenorm_b2211_joints", "leak_depth_mm", 5.0, "S2", "S1", OENORM),
    ("oenorm_b2211_joints", "leak_depth_mm", 10.0, "S1", "worse than S1", OENORM),
    ("oenorm_b2211_joints", "step_mm", 3.0, "S3", "S2", OENORM),
    ("oenorm_b2211_joints", "step_mm", 5.0, "S2", "S1", OENORM),
    ("oenorm_b2211_joints", "fin_mm", 3.0, "S3", "S2", OENORM),
    ("oenorm_b2211_joints", "fin_mm", 5.0, "S2", "S1", OENORM),
    ("dbv_porosity", "void_share", 0.003, "P4", "P3", DBV),
    ("dbv_porosity", "void_share", 0.006, "P3", "P2", DBV),
    ("dbv_porosity", "void_share", 0.009, "P2", "P1", DBV),
    ("dbv_porosity", "void_share", 0.012, "P1", "worse than P1", DBV),
    ("aci_347_3r_svr", "void_share", 0.003, "SVR4", "SVR3", ACI_347),
    ("aci_347_3r_svr", "void_share", 0.006, "SVR3", "SVR2", ACI_347),
    ("aci_347_3r_svr", "void_share", 0.009, "SVR2", "SVR1", ACI_347),
    ("aci_347_3r_svr", "void_share", 0.012, "SVR1", "worse than SVR1", ACI_347),
    ("aci_301_voids", "void_width_mm", 19.05, "SF-3.0/SF-2.0", "SF-1.0", ACI_301),
    ("aci_301_voids", "void_width_mm", 38.1, "SF-1.0", "patch to SF-1.0", ACI_301),
    (
        "aci_301_voids",
        "void_depth_mm",
        12.7,
        "SF-3.0/SF-2.0/SF-1.0",
        "patch to SF-1.0",
        ACI_301,
    ),
    ("aci_301_voids", "fin_mm", 3.175, "SF-3.0", "SF-2.0", ACI_301),
    ("aci_301_voids", "fin_mm", 6.35, "SF-2.0", "SF-1.0", ACI_301),
    ("aci_301_voids", "fin_mm", 25.4, "SF-1.0", "patch to SF-1.0", ACI_301),
    ("sp_70_13330", "void_width_mm", 4.0, "A3", "A4", SP),
    ("sp_70_13330", "void_width_mm", 10.0, "A4", "A6", SP),
    ("sp_70_13330", "void_width_mm", 15.0, "A6", "A7", SP),
    ("sp_70_13330", "void_width_mm", 20.0, "A7", "worse than A7", SP),
    ("sp_70_13330", "void_depth_mm", 2.0, "A3/A4", "A6", SP),
    ("sp_70_13330", "void_depth_mm", 5.0, "A6", "A7", SP),
    ("sp_70_13330", "chip_depth_mm", 5.0, "A3/A4", "A6", SP),
    ("sp_70_13330", "chip_depth_mm", 10.0, "A6", "A7", SP),
    ("sp_70_13330", "chip_depth_mm", 20.0, "A7", "worse than A7", SP),
    ("sp_70_13330", "chip_mm_per_m", 50.0, "A3/A4", "A6", SP),
    ("sp_70_13330", "chip_mm_per_m", 100.0, "A6", "A7", SP),
    ("sp_70_13330", "honeycomb_patch_mm2", 0.0, "A3/A4/A6/A7", "worse than A7", SP),
    ("gost_13015", "void_width_mm", 1.0, "A2", "A3", GOST),
    ("gost_13015", "void_width_mm", 4.0, "A3", "A4", GOST),
    ("gost_13015", "void_width_mm", 10.0, "A4", "A6", GOST),
    ("gost_13015", "void_width_mm", 15.0, "A6", "A7", GOST),
    ("gost_13015", "void_width_mm", 20.0, "A7", "worse than A7", GOST),
    ("gost_13015", "void_depth_mm", 1.0, "A2/A3/A4", "A6", GOST),
    ("gost_13015", "void_depth_mm", 5.0, "A6", "A7", GOST),
    ("gost_13015", "chip_depth_mm", 5.0, "A2/A3/A4", "A6", GOST),
    ("gost_13015", "chip_depth_mm", 10.0, "A6", "A7", GOST),
    ("gost_13015", "chip_depth_mm", 20.0, "A7", "worse than A7", GOST),
    ("gost_13015", "chip_mm_per_m", 20.0, "A2", "A3/A4", GOST),
    ("gost_13015", "chip_mm_per_m", 50.0, "A3/A4", "A6", GOST),
    ("gost_13015", "chip_mm_per_m", 100.0, "A6", "A7", GOST),
    ("wallonia_qualiroutes", "void_depth_mm", 10.0, "accepted", "refused", WALLONIA),
    ("wallonia_qualiroutes", "void_volume_cm3", 5.0, "accepted", "refused", WALLONIA),
    ("wallonia_qualiroutes", "fin_mm", 10.0, "accepted", "refused", WALLONIA),
    (
        "usace_03301a",
        "void_width_mm",
        13.0,
        "nothing to fill",
        "fill or dry-pack",
        USACE,
    ),
    (
        "usace_03301a",
        "honeycomb_patch_mm2",
        0.0,
        "nothing to fill",
        "fill or dry-pack",
        USACE,
    ),
)
# The same, where the limit itself is outside.
BELOW = (
    (
        "usace_03301a",
        "honeycomb_patch_mm2",
        10_000.0,
        "fill or dry-pack",
        "saw-cut and repair",
        USACE,
    ),
    (
        "usace_03301a",
        "void_depth_mm",
        12.7,
        "fill or dry-pack",
        "saw-cut and repair",
        USACE,
    ),
)
# What must be known beside the quantity for its limit to decide.
BESIDE = {
    ("oenorm_b2211_joints", "leak_depth_mm", 5.0): {"leak_width_mm": 9.0},
    ("oenorm_b2211_joints", "leak_depth_mm", 10.0): {"leak_width_mm": 15.0},
    ("usace_03301a", "void_depth_mm", 12.7): {"void_width_mm": 14.0},
}


@pytest.mark.parametrize(("code", "name", "limit", "kept", "over", "source"), AT_MOST)
def test_a_limit_is_inside_and_just_over_it_is_not(
    code, name, limit, kept, over, source
):
    one = criterion(code)
    beside = BESIDE.get((code, name, limit), {})
    step = max(limit, 1.0) * 1e-9
    assert class_of(one, beside | {name: limit}) == kept, source
    assert class_of(one, beside | {name: limit + step}) == over, source
    if limit > 0:
        assert class_of(one, beside | {name: limit - step}) == kept, source


@pytest.mark.parametrize(("code", "name", "limit", "kept", "over", "source"), BELOW)
def test_a_limit_that_is_to_stay_below_is_outside(
    code, name, limit, kept, over, source
):
    one = criterion(code)
    beside = BESIDE.get((code, name, limit), {})
    assert class_of(one, beside | {name: limit * (1 - 1e-9)}) == kept, source
    assert class_of(one, beside | {name: limit}) == over, source
    assert class_of(one, beside | {name: limit * (1 + 1e-9)}) == over, source


def test_no_limit_is_left_out_of_the_table():
    tabled = {(code, name, limit) for code, name, limit, *_ in (*AT_MOST, *BELOW)}
    kept = {
        (one.code, name, limit)
        for one in published()
        for grade in one.classes
        for limits in (grade.at_most, grade.at_least, grade.below)
        for name, limit in limits.items()
    }
    # The same limit for a class and a better one is tested once; a limit that nests
    # of stones rule out in all classes alike cannot part them.
    kept -= {("oenorm_b2211_joints", "honeycomb_patch_mm2", 0.0)}
    assert kept == tabled


def test_a_nest_of_stones_fails_every_structure_class():
    one = criterion("oenorm_b2211_joints")
    figures = {"leak_width_mm": 1.0, "honeycomb_patch_mm2": 1.0}
    assert class_of(one, figures) == "worse than S1", OENORM
    assert class_of(one, figures | {"honeycomb_patch_mm2": 0.0}) == "S3"


def test_areas_of_the_documents_agree_with_their_percentages():
    # ÖNORM: 8, 15 and 23 cm² of 2,500 cm² stand beside 0.3, 0.6 and 0.9 %.
    for given_cm2, one in zip(
        (8, 15, 23), criterion("oenorm_b2211_pores").classes, strict=True
    ):
        assert one.at_most["void_share"] * 2500 == pytest.approx(given_cm2, abs=0.51)
    # DBV: 750, 1,500, 2,250 and 3,000 mm² of 500 x 500 mm.
    dbv = criterion("dbv_porosity")
    areas = [one.at_most["void_share"] * dbv.test_area_mm2 for one in dbv.classes]
    assert areas == pytest.approx([750, 1500, 2250, 3000])
    # ACI 347.3R: 24 x 24 in.
    assert criterion("aci_347_3r_svr").test_area_mm2 == pytest.approx((24 * 25.4) ** 2)


def test_what_comes_from_memory_says_so():
    tags = {one.code: one.tag for one in published()}
    assert {code for code, tag in tags.items() if tag == "from_memory"} == {
        "dbv_porosity",
        "aci_347_3r_svr",
        "gost_13015",
    }
    for one in published():
        assert ("memory" in one.source) == (one.tag == "from_memory")
        assert one.counts
        assert one.edition
