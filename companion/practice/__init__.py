"""Marking a pass, fading the cues, ramping the tempo, recall over days, today's plan. Pure: time and chance are arguments."""
