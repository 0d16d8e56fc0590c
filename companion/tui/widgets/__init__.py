"""The widgets: each draws what it is given."""
