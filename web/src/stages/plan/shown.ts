/** Layers of the drawing that can be left out. */
export interface Shown {
  picture: boolean;
  below: boolean;
  squares: boolean;
  names: boolean;
  devices: boolean;
  alarms: boolean;
  distances: boolean;
}
