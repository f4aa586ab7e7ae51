"""What joints left on the photos of a piece, together."""

from datetime import UTC, datetime

from analysis.model.log import PhotoUse
from analysis.model.log_views import ReadingLine
from analysis.pieces.figures import pooled_figures


def line(number, **changes):
    return ReadingLine(
        id=number,
        piece_id=1,
        photo_sha256="a" * 64,
        photo_name="a.jpg",
        use=PhotoUse(stage="as_struck"),
        reviews_id=None,
        measured_at=datetime(2026, 1, 1, tzinfo=UTC),
        saved_at=datetime(2026, 1, 1, tzinfo=UTC),
        taken_at=None,
        method_version="1",
        void_share=0.005,
        void_share_low=0.004,
        void_share_high=0.006,
        void_count=9,
        smallest_counted_mm=0.5,
        face_area_px=1000.0,
        face_area_mm2=1000.0,
        void_area_px=5.0,
        **changes,
    )


def marked(number, length_mm, loss):
    return line(
        number,
        joint_length_mm=length_mm,
        sand_length_mm=40.0,
        fin_length_mm=0.0,
        arris_loss_mm2_per_m=loss,
    )


def test_lengths_add_up_and_loss_is_weighed_by_length():
    found = pooled_figures([marked(1, 100.0, 30.0), marked(2, 300.0, 10.0), line(3)])
    assert found["joint_length_mm"] == 400
    assert found["sand_length_mm"] == 80
    assert found["fin_length_mm"] == 0
    assert found["arris_loss_mm2_per_m"] == 15


def test_unknown_without_a_photo_that_shows_a_joint():
    assert "sand_length_mm" not in pooled_figures([line(1)])
