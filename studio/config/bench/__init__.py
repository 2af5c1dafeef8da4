"""What the studio's speed is measured by. Each part runs in a process of its own, on data made for it."""
