"""The rim slice by slice along its length: contact, lift-off and gap where shims, heat or poles differ."""
