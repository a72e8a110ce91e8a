"""What the eye sees, as shapes in millimetres, and the painter that makes pixels of them."""
