"""Mixers worked out in time: what comes out is measured, no formula for frequencies is used."""
