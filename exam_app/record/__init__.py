"""The signed record: its bytes, its checks, and the plain form of a draft."""
