"""The pure core of Footstool: values in, values out; no Qt, no clocks, no globals."""
