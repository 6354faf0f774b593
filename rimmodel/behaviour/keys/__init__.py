"""The rim key by key: which keys press, which lift off, and what the rim does then."""
