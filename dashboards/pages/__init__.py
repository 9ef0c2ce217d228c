"""One module a page: `PATH`, `layout(...)` and `register(app, data)`; nothing happens at import."""
