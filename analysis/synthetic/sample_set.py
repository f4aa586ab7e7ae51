"""The eight sample photos: what each face is made of and how it was cast."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.synthetic.recipe import FaceRecipe, Honeycomb, Joint, PitPopulation
from analysis.synthetic.scene import BLACK, BUFF, WHITE, Camera, Lamp, Surface

FACE_WIDTH_PX, FACE_HEIGHT_PX = 1440, 960


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One sample photo and what is known of the piece on it.

    Attributes
    ----------
    file : str
        File name; its ending sets the format.
    title : str
        Plain words for a list.
    form_type, joint_sealing, vibration_method, stage : str
        As the log words them.
    vibration_s : int
        Seconds of vibration.
    seed : int
        Of the face.
    recipe : FaceRecipe
        The face alone, without bench and ruler.
    """

    file: str
    title: str
    form_type: str
    joint_sealing: str
    vibration_method: str
    vibration_s: int
    stage: str
    seed: int
    recipe: FaceRecipe


def _face(mm_per_px: float, **parts: object) -> FaceRecipe:
    settings: dict[str, object] = {
        "height_px": FACE_HEIGHT_PX,
        "width_px": FACE_WIDTH_PX,
        "mm_per_px": mm_per_px,
        "camera": Camera(),
    }
    return FaceRecipe(**{**settings, **parts})  # type: ignore[arg-type]


def _joint(mm_per_px: float, share_across: float, **marks: float) -> Joint:
    """Return an upright joint at a share of the face's width."""
    col = share_across * FACE_WIDTH_PX * mm_per_px
    height = (FACE_HEIGHT_PX - 1) * mm_per_px
    return Joint(start_mm=(0.0, col), end_mm=(height, col), **marks)


def samples() -> tuple[Sample, ...]:
    """Return the eight samples.

    Examples
    --------
    >>> len(samples())
    8
    """
    tight = {"fin_height_mm": 0.15}
    leaking = {
        "fin_height_mm": 0.7,
        "leak_width_mm": 9.0,
        "leak_pits_per_m": 900.0,
        "gap_mm": 0.3,
    }
    return (
        Sample(
            file="trough_joints_sealed.jpg",
            title="Trough side, joints sealed",
            form_type="trough",
            joint_sealing="silicone",
            vibration_method="table",
            vibration_s=40,
            stage="as_struck",
            seed=2101,
            recipe=_face(
                0.20,
                joints=(_joint(0.20, 0.62, **tight),),
                pits=(PitPopulation(per_m2=2600, median_mm=1.6, largest_mm=9),),
                lamp=Lamp(azimuth_deg=215, elevation_deg=42),
            ),
        ),
        Sample(
            file="trough_joints_open.jpg",
            title="Trough side, joints open: leak along the joint",
            form_type="trough",
            joint_sealing="none",
            vibration_method="table",
            vibration_s=40,
            stage="as_struck",
            seed=2102,
            recipe=_face(
                0.20,
                joints=(_joint(0.20, 0.62, **leaking),),
                pits=(PitPopulation(per_m2=2900, median_mm=1.6, largest_mm=9),),
                lamp=Lamp(azimuth_deg=215, elevation_deg=42),
                surface=Surface(stains=2, stain_mm=40, stain_strength=0.12),
            ),
        ),
        Sample(
            file="bench_leg_rodded.jpg",
            title="Bench leg, rodded by hand: many bugholes towards the top",
            form_type="bench leg",
            joint_sealing="tape",
            vibration_method="rodding",
            vibration_s=60,
            stage="as_struck",
            seed=2103,
            recipe=_face(
                0.16,
                pits=(
                    PitPopulation(
                        per_m2=9000,
                        median_mm=1.7,
                        spread=0.7,
                        largest_mm=13,
                        towards_top=0.5,
                    ),
                    PitPopulation(
                        per_m2=9000, median_mm=0.8, largest_mm=2, clump_share=0.6
                    ),
                ),
                lamp=Lamp(azimuth_deg=320, elevation_deg=38),
            ),
        ),
        Sample(
            file="bench_leg_vibrated.jpg",
            title="Bench leg, vibrated on the table: few bugholes",
            form_type="bench leg",
            joint_sealing="tape",
            vibration_method="table",
            vibration_s=75,
            stage="as_struck",
            seed=2104,
            recipe=_face(
                0.16,
                pits=(
                    PitPopulation(per_m2=2600, median_mm=1.2, largest_mm=6),
                    PitPopulation(per_m2=3000, median_mm=0.7, largest_mm=1.5),
                ),
                lamp=Lamp(azimuth_deg=320, elevation_deg=38),
                surface=Surface(bloom=2, bloom_mm=25, bloom_strength=0.15),
            ),
        ),
        Sample(
            file="panel_honeycomb.jpg",
            title="Panel with a honeycomb patch",
            form_type="panel",
            joint_sealing="foam strip",
            vibration_method="poker",
            vibration_s=8,
            stage="as_struck",
            seed=2105,
            recipe=_face(
                0.25,
                honeycomb=(Honeycomb(row_mm=165, col_mm=250, diameter_mm=95),),
                pits=(PitPopulation(per_m2=1500, median_mm=2.0, largest_mm=12),),
                lamp=Lamp(azimuth_deg=250, elevation_deg=45),
            ),
        ),
        Sample(
            file="pot_clean.jpg",
            title="Pot side without a single void",
            form_type="pot",
            joint_sealing="silicone",
            vibration_method="table",
            vibration_s=60,
            stage="as_struck",
            seed=2106,
            recipe=_face(
                0.15,
                lamp=Lamp(azimuth_deg=200, elevation_deg=45),
                surface=Surface(
                    reflectance=BUFF,
                    stains=2,
                    stain_mm=30,
                    stain_strength=0.15,
                    bloom=2,
                    bloom_mm=20,
                    bloom_strength=0.15,
                ),
            ),
        ),
        Sample(
            file="pot_black.jpg",
            title="Black-tinted pot side",
            form_type="pot",
            joint_sealing="silicone",
            vibration_method="table",
            vibration_s=30,
            stage="as_struck",
            seed=2107,
            recipe=_face(
                0.15,
                pits=(PitPopulation(per_m2=5500, median_mm=1.4, largest_mm=8),),
                lamp=Lamp(azimuth_deg=160, elevation_deg=40, strength=0.7, sky=0.3),
                surface=Surface(
                    reflectance=BLACK, bloom=2, bloom_mm=25, bloom_strength=0.04
                ),
                camera=Camera(exposure=2.4),
            ),
        ),
        Sample(
            file="panel_white.jpg",
            title="White panel, few bugholes",
            form_type="panel",
            joint_sealing="silicone",
            vibration_method="table",
            vibration_s=50,
            stage="as_struck",
            seed=2108,
            recipe=_face(
                0.18,
                pits=(
                    PitPopulation(
                        per_m2=4200, median_mm=1.3, largest_mm=7, clump_share=0.3
                    ),
                ),
                lamp=Lamp(azimuth_deg=45, elevation_deg=50, strength=0.5, sky=0.5),
                surface=Surface(reflectance=WHITE, scratches=2, scratch_width_mm=0.2),
                camera=Camera(exposure=0.9),
            ),
        ),
    )
