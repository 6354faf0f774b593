"""A printed chart as a source of evidence: picture, axes, curve, and what their errors do to a fit."""
