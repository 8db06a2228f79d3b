"""What a person sees: terminal pages, live view, report."""
