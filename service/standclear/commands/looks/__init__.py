"""What `standclear doctor` looks at: one file a subject. Each look yields findings and changes
nothing, but for the speed test, whose file is removed again."""
