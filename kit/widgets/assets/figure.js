// A figure with nothing to do but choose.

export default {
  render(view) {
    showFigure(view);
  },
};
