//! The whole trade-off as a picture: false nudges an hour against the median delay.

use std::error::Error;

use plotters::prelude::*;

use plotters::coord::Shift;

use crate::measure::Score;
use crate::worlds::Curves;

/// Of one panel.
const SIZE: (u32, u32) = (900, 560);
/// Colours that differ in lightness too; ours is the darkest.
const COLOURS: [RGBColor; 6] = [
    RGBColor(0, 114, 178),
    RGBColor(213, 94, 0),
    RGBColor(0, 158, 115),
    RGBColor(204, 121, 167),
    RGBColor(230, 159, 0),
    RGBColor(86, 180, 233),
];

/// The settings that no other setting of the family beats in both respects, by false nudges.
fn front(scores: &[Score]) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = scores
        .iter()
        .filter(|score| score.median_delay.is_finite() && score.false_per_hour > 0.0)
        .map(|score| (score.false_per_hour, score.median_delay))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best = f64::INFINITY;
    points.retain(|(_, delay)| {
        let better = *delay < best;
        best = best.min(*delay);
        better
    });
    points
}

/// A panel for each of these, one below the other.
pub(crate) fn draw(file: &str, panels: &[(&str, Curves)]) -> Result<(), Box<dyn Error>> {
    let height = SIZE.1 * u32::try_from(panels.len().max(1))?;
    let root = SVGBackend::new(file, (SIZE.0, height)).into_drawing_area();
    root.fill(&WHITE)?;
    for (area, (name, curves)) in root.split_evenly((panels.len().max(1), 1)).iter().zip(panels) {
        panel(area, name, curves)?;
    }
    root.present()?;
    Ok(())
}

fn panel(
    root: &DrawingArea<SVGBackend, Shift>,
    name: &str,
    curves: &Curves,
) -> Result<(), Box<dyn Error>> {
    let ours = front(&curves.ours);
    let fronts: Vec<(&str, Vec<(f64, f64)>)> =
        curves.peers.iter().map(|(name, scores)| (*name, front(scores))).collect();
    let highest = fronts.iter().flat_map(|(_, points)| points).chain(&ours).map(|p| p.1);
    let highest = highest.fold(10.0_f64, f64::max).min(400.0);
    let mut chart = ChartBuilder::on(root)
        .caption(format!("False nudges against delay, {name}"), ("sans-serif", 20))
        .margin(16)
        .x_label_area_size(48)
        .y_label_area_size(60)
        .build_cartesian_2d((0.1_f64..60.0).log_scale(), 0.0..highest * 1.05)?;
    chart
        .configure_mesh()
        .x_desc("false nudges an hour of good work")
        .y_desc("median seconds from decline to nudge")
        .draw()?;
    for ((name, points), colour) in fronts.iter().zip(COLOURS) {
        chart
            .draw_series(LineSeries::new(points.iter().copied(), colour.stroke_width(2)))?
            .label(*name)
            .legend(move |(x, y)| PathElement::new([(x, y), (x + 18, y)], colour.stroke_width(2)));
        chart.draw_series(points.iter().map(|point| Circle::new(*point, 3, colour.filled())))?;
    }
    chart
        .draw_series(LineSeries::new(ours.iter().copied(), BLACK.stroke_width(3)))?
        .label("engine")
        .legend(|(x, y)| PathElement::new([(x, y), (x + 18, y)], BLACK.stroke_width(3)));
    chart.draw_series(ours.iter().map(|point| Circle::new(*point, 4, BLACK.filled())))?;
    chart.configure_series_labels().background_style(WHITE).border_style(BLACK).draw()?;
    Ok(())
}
