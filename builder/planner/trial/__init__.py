"""The rules of the plan tried by light: what each would have said of traced eyes, and what these eyes then got."""
