"""Room for the engines that answer harder questions than the core: data in, data out."""
