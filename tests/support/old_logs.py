"""Logs as earlier releases wrote them."""

from __future__ import annotations

from analysis.storage import migrations
from analysis.storage.engine import locate, writing

# A log as the first release wrote it, with one of everything.
AS_0001 = """
INSERT INTO term (id, vocabulary, name, created_at) VALUES
  (1, 'form_type', 'trough', '2026-01-01 08:00:00.000000'),
  (2, 'release_agent', 'oil', '2026-01-01 08:00:00.000000'),
  (3, 'joint_sealing', 'none', '2026-01-01 08:00:00.000000'),
  (4, 'vibration_method', 'table', '2026-01-01 08:00:00.000000');
INSERT INTO form (id, name, form_type_id, starting_use_count, note, version, created_at)
  VALUES (5, 'A', 1, 3, 'old', 2, '2026-01-01 08:00:00.000000');
INSERT INTO pour (id, name, cast_on, cast_at, created_at)
  VALUES (6, '12', '2026-03-31', '23:30:00.000000', '2026-01-01 08:00:00.000000');
INSERT INTO piece (id, name, pour_id, form_id, release_agent_id, created_at)
  VALUES (7, '007', 6, 5, 2, '2026-01-01 08:00:00.000000');
INSERT INTO piece_joint (piece_id, position, joint, sealing_id) VALUES (7, 0, '', 3);
INSERT INTO step (piece_id, position, method_id, seconds) VALUES (7, 0, 4, 40.5);
INSERT INTO photo (id, sha256, name, file_format, byte_count, width_px, height_px,
  created_at) VALUES (8, '{sha}', 'a.jpg', 'JPEG', 3, 40, 30,
  '2026-01-01 08:00:00.000000');
INSERT INTO photo_use (id, piece_id, photo_id, purpose, stage, created_at)
  VALUES (9, 7, 8, 'representative', 'as_struck', '2026-01-01 08:00:00.000000');
INSERT INTO reading (id, photo_use_id, width_px, height_px, face, face_area_px,
  void_area_px, void_share, void_share_low, void_share_high, sampled_share,
  sampled_share_low, sampled_share_high, void_count, smallest_counted_px,
  honeycomb_share, honeycomb_px, light_flags, flags, method_version,
  library_versions, measured_at, created_at)
  VALUES (10, 9, 40, 30,
  '{{"outline_px": null, "left_out_px": [], "joints": [], "joint_band_mm": 15.0}}',
  1200, 12.5, 0.0104, 0.01, 0.011, 0.0104, 0.005, 0.02, 1, 2.26, 0, '[]', '[]',
  '["whole_photo"]', '1', '[["numpy", "2.4.6"]]', '2026-03-31 21:30:00.000000',
  '2026-03-31 21:31:00.000000');
INSERT INTO void (reading_id, position, kind, rejected, row_px, col_px, area_px,
  area_sd_px, feret_max_px, contrast, rim_sharpness, shading, colour_shift, elongation,
  solidity, flags, outline) VALUES (10, 0, 'bughole', 0, 5, 6, 12.5, 1, 5, 0.4, 0.9,
  0.1, 0, 1.2, 0.9, '[]', x'');
""".format(sha="a" * 64)


# What the second state added to it, one of everything again.
AS_0002 = (
    AS_0001
    + """
INSERT INTO term_change (term_id, change, before, after, changed_at)
  VALUES (2, 'added', '', 'oil', '2026-01-01 08:00:00.000000');
INSERT INTO product_line (id, name, created_at)
  VALUES (1, 'planters', '2026-01-01 08:00:00.000000');
INSERT INTO finish_target (id, product_line_id, low_share, high_share, created_at)
  VALUES (2, 1, 0.001, 0.02, '2026-01-01 08:00:00.000000');
INSERT INTO mix (id, name, basis, proportions, created_at)
  VALUES (3, 'grey', 'by_feel', '1:2:3', '2026-01-01 08:00:00.000000');
INSERT INTO form_joint (form_id, position, name, default_sealing_id)
  VALUES (5, 0, 'left', 3);
UPDATE form SET product_line_id = 1, made_on = '2024-02-29';
UPDATE pour SET mix_id = 3, humidity_share = 0.65, zone = 'Europe/Oslo';
UPDATE piece SET product_line_id = 1, lifts = 2, show_faces = 'front';
UPDATE step SET strokes = 5, certainty = 'guessed';
INSERT INTO outcome (piece_id, outcome, eye_score, created_at)
  VALUES (7, 'patched', 6, '2026-01-01 08:00:00.000000');
INSERT INTO repair (piece_id, minutes, created_at)
  VALUES (7, 12.5, '2026-01-01 08:00:00.000000');
INSERT INTO verdict (reading_id, finish_target_id, verdict, created_at)
  VALUES (10, 2, 'within', '2026-01-01 08:00:00.000000');
INSERT INTO brought_figure (piece_id, void_share, created_at)
  VALUES (7, 0.5, '2026-01-01 08:00:00.000000');
INSERT INTO draft (key, content, changed_at)
  VALUES ('pour', '{"name": "13"}', '2026-01-01 08:00:00.000000');
INSERT INTO edit (record_kind, record_id, version, before, edited_at)
  VALUES ('piece', 7, 1, '{"name": "7"}', '2026-01-01 08:00:00.000000');
"""
)


def at(folder, revision, script=""):
    """Make a log in an older state."""
    folder.mkdir()
    log = locate(folder)
    log.file.touch()
    with writing(log) as connection:
        migrations.upgrade(connection, revision)
        for statement in filter(str.strip, script.split(";\n")):
            connection.exec_driver_sql(statement)
    return log
