"""Counting points: a share of the face that owes nothing to the segmentation."""
