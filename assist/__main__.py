"""`python -m assist`: the same as `assist`, where that is not on the path."""

from assist.start import main

if __name__ == "__main__":
    main()
