"""The app, its screens and widgets. Draws state; decides nothing musical."""
