"""Words spoken by the system's own speech, rendered beforehand."""
