"""What is built: points, runs, conductors and devices, as frozen values and a graph."""
