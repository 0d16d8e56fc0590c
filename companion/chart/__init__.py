"""Songs, sections, form and keys; reading and writing chart files. Pure but for opening files."""
