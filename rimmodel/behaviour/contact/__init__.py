"""The rim on its spider at any speed: contact, the speeds at which something happens, stresses, growth and gap."""
