(nothing here)
