"""Writing entries: what is put in, judged, shown, asked for and appended."""
