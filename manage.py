#!/usr/bin/env python3
import sys

if __name__ == "__main__":
    from studio.bootstrap import main

    sys.exit(main(sys.argv))
