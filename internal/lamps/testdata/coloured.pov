// A painted wall and coloured lamps with hard shadows: metres, made here.
// Declare=LAMP=0 white spot, 1 amber, 2 blue, 3 magenta strip, 4 green bulb
// behind a shelf, 5 a weak grey sky. PX, LEAN move the mechanic.
#version 3.7;
#ifndef (LAMP) #declare LAMP=0; #end
#ifndef (PX) #declare PX=0; #end
#ifndef (LEAN) #declare LEAN=0; #end
global_settings { assumed_gamma 1.0 max_trace_level 3 }
#declare M = finish { ambient 0 emission 0 diffuse 1 }
camera { location <0,1.3,-3.0> look_at <0,1.1,0> right x*image_width/image_height angle 54 }
plane { y, 0 pigment { bozo color_map { [0 rgb <0.14,0.13,0.12>] [1 rgb <0.34,0.31,0.27>] } scale 0.3 } finish { M } }
plane { -z, -1.4 pigment { granite color_map { [0 rgb <0.16,0.24,0.30>] [0.5 rgb <0.30,0.28,0.26>] [1 rgb <0.44,0.34,0.24>] } scale 0.9 } finish { M } }
plane { x, -2.4 pigment { gradient y color_map { [0 rgb <0.36,0.20,0.18>] [0.5 rgb <0.36,0.20,0.18>] [0.5 rgb <0.20,0.22,0.34>] [1 rgb <0.20,0.22,0.34>] } scale 0.5 } finish { M } }
plane { -x, -2.4 pigment { rgb 0.28 } finish { M } }
#declare R = seed(9); #declare I=0;
#while (I<14)
  box { <-0.06,0,-0.1>,<0.06,0.1+0.25*rand(R),0.1> translate <-1.9+0.27*I,1.46,1.25> pigment { rgb <0.05+0.6*rand(R),0.05+0.6*rand(R),0.05+0.6*rand(R)> } finish { M } }
  #declare I=I+1;
#end
box { <-2.1,1.42,1.1>,<2.1,1.46,1.4> pigment { rgb <0.3,0.22,0.14> } finish { M } }
torus { 0.33,0.025 rotate x*90 translate <1.1,0.6,0.7> pigment { rgb 0.06 } finish { M } }
sphere { <PX+LEAN,1.46,0.1>,0.12 pigment { rgb <0.30,0.20,0.15> } finish { M } }
cone { <PX,0.3,0.1>,0.26 <PX+LEAN*0.8,1.28,0.1>,0.17 pigment { rgb <0.35,0.10,0.09> } finish { M } }
#macro Lamp(P,C) light_source { P color rgb C*5000 fade_distance 0.01 fade_power 2 } #end
#if (LAMP=0) light_source { <-1.3,2.3,-1.7> color rgb 3.6*5000*<1,0.98,0.95> spotlight point_at <0.1,1.2,0.3> radius 22 falloff 34 tightness 0 fade_distance 0.01 fade_power 2 } #end
#if (LAMP=1) Lamp(<1.7,1.9,-1.3>, 0.8*<1.25,0.75,0.16>) #end
#if (LAMP=2) Lamp(<-1.9,1.2,0.4>, 0.35*<0.16,0.34,1.3>) #end
#if (LAMP=3) #declare I=0; #while (I<5) Lamp(<-0.8+0.4*I,2.3,1.15>, 0.05*<1.1,0.25,0.95>) #declare I=I+1; #end #end
#if (LAMP=4) Lamp(<0.9,1.25,1.25>, 0.09*<0.15,1.0,0.25>) #end
#if (LAMP=5) light_source { <0,2.2,-2.8> color rgb 0.5*5000*<0.9,1,1.1> area_light <1.6,0,0>,<0,0.6,0>,5,3 adaptive 0 fade_distance 0.01 fade_power 2 } #end
