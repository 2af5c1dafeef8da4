"""The long work this house knows: kind, what it is called on screen, and the function that does it.

The function is named, not imported, so that a heavy library loads in the worker and nowhere else.
"""

HANDLERS: dict[str, tuple[str, str]] = {
    "print_pieces": ("Printing cards and tags", "studio.papers.many:print_many"),
}

# What is left over is removed now and then by the worker: name, and the function called with the time.
SWEEPS: dict[str, str] = {
    "pictures": "studio.pictures.operations:tidy_up",
}
