"""The pages of ridesim: they ask the library and show what it answers; they compute nothing themselves."""
