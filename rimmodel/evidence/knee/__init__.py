"""The knee of gap against speed squared: where it is, how sure that is, and whether there is one."""
