"""Marking a pass, the drills it moves on, and planning over days. Pure: time and chance are arguments."""
