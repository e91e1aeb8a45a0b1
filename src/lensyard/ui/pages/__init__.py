"""One module a page; each reads widgets, calls one service and shows one view."""
