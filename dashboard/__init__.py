"""The pages of ridesim: they ask the library and show what it answers; they compute nothing themselves."""

import os

# matrices are small here: threads for them wait for each other longer than they work
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
