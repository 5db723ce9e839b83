"""Pens, letters and true scale: what every picture and sheet is drawn with."""
