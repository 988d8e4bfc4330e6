"""Which container when: a plan that keeps every deadline and throws the least away."""
