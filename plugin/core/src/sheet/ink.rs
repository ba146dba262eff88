//! Painting: a drawing becomes SVG, PDF or PNG; outlines and fonts live here.
