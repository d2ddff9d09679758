"""Draws the demo studio's photographs: what they show stands in `pictures.toml`.

Only the finished files in `batches/demo/photos` are used by the demo studio, so numpy is needed to draw and not to run.
"""
