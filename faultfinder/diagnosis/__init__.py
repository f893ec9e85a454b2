"""From readings and predictions to ranked suspects, with reasons and next checks."""
