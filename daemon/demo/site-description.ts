import type { SpokenCalibration, SpokenUnit } from "./payload-encoding.js";

/** The part of a checked configuration that a simulated site is made from. */
export interface SiteDescription {
  readonly sensors: Readonly<Record<string, SensorDescription>>;
  readonly vessels: Readonly<Record<string, VesselDescription>>;
  readonly tanks: Readonly<Record<string, TankDescription>>;
  readonly valves: Readonly<Record<string, ValveDescription>>;
}

export type SensorDescription = SpokenUnit & {
  readonly topic: string;
  readonly value?: string;
  readonly timestamp?: string;
  readonly calibration: SpokenCalibration;
};

export interface VesselDescription {
  readonly kind: "generator" | "liquid";
  readonly volume_L: number;
  readonly workingPressureGauge_bar: number;
  readonly pressureSensor?: string;
  readonly temperatureSensor?: string;
  readonly charge?: {
    readonly sodiumBicarbonate_g: number;
    /** One of the two. */
    readonly citricAcidAnhydrous_g?: number;
    readonly citricAcidMonohydrate_g?: number;
    readonly water_kg: number;
    readonly sealedAt_degC: number;
  };
}

export interface TankDescription {
  readonly volume_L: number;
  readonly kh_dKH: number;
  readonly phSensor?: string;
  readonly temperatureSensor?: string;
}

export interface RelayDescription {
  readonly commandTopic: string;
  readonly payloadOn: string;
  readonly payloadOff: string;
  readonly payloadOnFor?: string;
  readonly stateTopic: string;
  readonly stateValue?: string;
  readonly stateOn: string;
  readonly stateOff: string;
  readonly statusQuery?: { readonly topic: string; readonly payload: string };
  readonly autoOff_s?: number;
  readonly powerOnState: "off" | "on" | "last";
}

export interface ValveDescription {
  readonly vessel: string;
  readonly feeds: readonly { readonly tank: string; readonly share: number }[];
  readonly relay: RelayDescription;
  readonly seriesRelay?: RelayDescription;
  readonly airPump?: RelayDescription;
}
