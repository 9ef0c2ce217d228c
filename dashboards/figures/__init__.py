"""Pure figures: plain inputs in, a drawing out; no clock, no data access, no Dash."""
