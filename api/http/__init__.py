"""How requests are read and answers leave: parameters, bodies, ETags, problems, access."""
